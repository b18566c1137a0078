#!/bin/sh
# Fifty digitised outlines made ready: names, widths, folds and hems from a table, seams found and confirmed, the ease of
# the sleeves' caps stated, grain lines, and a list of what does not fit. Everything is written to the folder named, or
# to wardrobe-done; FLATCUT=... says how flatcut is called.
set -e
into=${1:-wardrobe-done}
mkdir -p "$into"
into=$(cd "$into" && pwd)
cd "$(dirname "$0")"
: "${FLATCUT:=flatcut}"

$FLATCUT piece --table=wardrobe.csv -i wardrobe.svg -o "$into/pieces.svg" 2> "$into/pieces.txt"
$FLATCUT seam --suggest -i "$into/pieces.svg" -o "$into/suggested.svg" 2> "$into/suggested.txt"

# caps are longer than their armholes on purpose: 13.5 mm in front, 16.5 mm behind
fronts="" backs=""
for dress in aster birch clover dune elm; do
    fronts="$fronts $dress-sleeve-front.cap"
    backs="$backs $dress-sleeve-back.cap"
done
$FLATCUT seam $fronts --confirm --ease=13.5mm -i "$into/suggested.svg" -o "$into/fronts.svg" 2> "$into/confirmed.txt"
$FLATCUT seam $backs --confirm --ease=16.5mm -i "$into/fronts.svg" -o "$into/backs.svg" 2>> "$into/confirmed.txt"
$FLATCUT seam --confirm -i "$into/backs.svg" -o "$into/sewn.svg" 2>> "$into/confirmed.txt"
$FLATCUT grain all -i "$into/sewn.svg" -o "$into/set.svg" 2> "$into/grain.txt"
rm "$into/fronts.svg" "$into/backs.svg" "$into/sewn.svg"

$FLATCUT pieces "$into/set.svg" --json > "$into/set.json"
# the pieces do not fit everywhere, and check says so by its exit code too
$FLATCUT check "$into/set.svg" > "$into/check.txt" || true
