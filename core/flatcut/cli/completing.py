"""What a shell completes: commands, options, and the words that an option takes, for three shells."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from flatcut.cli import reporting
from flatcut.cli.commands import command
from flatcut.declared.declared import Declared, kinds, option, summary
from flatcut.operations import operation
from flatcut.reports import report
from flatcut.units import UNITS

EDITING = {"in-place": ("true", "false"), "json": ("true", "false"), "units": tuple(UNITS)}
"""Options that every operation takes beside its fields, and their words."""


@dataclass(frozen=True, kw_only=True)
class Call:
    """What can stand after one command. options: each with the words that it takes; words: what may be a target."""

    name: str
    help: str
    options: Mapping[str, Sequence[str]] = field(default_factory=dict)
    words: Sequence[str] = ()


def calls() -> list[Call]:
    """Every command with what it takes, in alphabetical order, from what is declared.

    >>> (dart,) = [call for call in calls() if call.name == "grain"]
    >>> dart.options["kind"]
    ('straight', 'cross', 'bias')
    """
    found = [_call(cls, EDITING) for cls in map(operation.load, operation.names())]
    for cls in map(report.load, report.names()):
        found.append(_call(cls, {name.partition("=")[0]: () for name in reporting.options(cls)}))
    found += [_call(cls, {}, cls.words) for cls in map(command.load, command.names())]
    found.append(Call(name="help", help="What a command does and takes.", words=[call.name for call in found]))
    return sorted(found, key=lambda call: call.name)


def _call(cls: type[Declared], more: Mapping[str, Sequence[str]], words: Sequence[str] = ()) -> Call:
    fields = dict(kinds(cls))
    target = fields.pop("target", None)
    own = {option(key): tuple(filter(None, kind.choices)) for key, kind in fields.items()}
    return Call(
        name=cls.command,
        help=summary(cls),
        options={**own, **more},
        words=words if target is None else target.choices,
    )


def bash(found: Sequence[Call]) -> str:
    """For bash, which takes what stands before the last = for a word of its own."""
    return f"""\
# completion of flatcut for bash
_flatcut() {{
    local word name words=""
    word=${{COMP_LINE:0:COMP_POINT}}; word=${{word##*[[:space:]]}}
    name=${{COMP_WORDS[1]}}
    if (( COMP_CWORD == 1 )); then words="{" ".join(call.name for call in found)}"
    elif [[ $word == --*=* ]]; then case "$name ${{word%%=*}}" in
{"".join(f"        '{key}') words='{' '.join(values)}' ;;{_END}" for key, values in _values(found, typed=True))}\
    esac
    else case $name in
{"".join(f"        {call.name}) words='{' '.join(_first(call))}' ;;{_END}" for call in found)}\
    esac fi
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$word")
    if [[ $word == *=* && $COMP_WORDBREAKS == *=* ]]; then COMPREPLY=("${{COMPREPLY[@]#"${{word%%=*}}="}}"); fi
    if [[ ${{COMPREPLY[0]-}} == *= ]]; then compopt -o nospace; fi
}}
complete -o default -F _flatcut flatcut
"""


def zsh(found: Sequence[Call]) -> str:
    """For zsh: a file of its $fpath, or sourced."""
    return f"""\
#compdef flatcut
_flatcut() {{
    local name=${{words[2]}} word=$PREFIX
    local -a found
    if (( CURRENT == 2 )); then found=({" ".join(call.name for call in found)})
    elif [[ $word == --*=* ]]; then
        case "$name ${{word%%=*}}" in
{"".join(f"            '{key}') found=({' '.join(values)}) ;;{_END}" for key, values in _values(found))}\
        esac
        compset -P '*='
    else
        case $name in
{"".join(f"            {call.name}) found=({' '.join(map(_quoted, _first(call)))}) ;;{_END}" for call in found)}\
        esac
    fi
    local -a open=(${{(M)found:#*=}}) whole=(${{found:#*=}})
    (( $#open )) && compadd -S '' -- $open
    (( $#whole )) && compadd -- $whole
    if (( CURRENT > 2 )) && [[ $word != -* || ( $word == *=* && $#found == 0 ) ]]; then _files; fi
}}
if [[ $zsh_eval_context[-1] == loadautofunc ]]; then _flatcut "$@"; else compdef _flatcut flatcut; fi
"""


def fish(found: Sequence[Call]) -> str:
    """For fish."""
    lines = ["# completion of flatcut for fish", "function __flatcut_is", "    set -l line (commandline -opc)"]
    lines += ['    test (count $line) -ge 2; and test "$line[2]" = $argv[1]', "end"]
    for call in found:
        help = call.help.replace("\\", "\\\\").replace("'", "\\'")
        lines.append(f"complete -c flatcut -n 'test (count (commandline -opc)) -eq 1' -f -a {call.name} -d '{help}'")
        here = f"complete -c flatcut -n '__flatcut_is {call.name}'"
        for name, values in call.options.items():
            lines.append(f"{here} -l {name}" + (f" -x -a '{' '.join(values)}'" if values else " -r"))
        if call.words:
            lines.append(f"{here} -a '{' '.join(call.words)}'")
    return "\n".join([*lines, ""])


SHELLS: dict[str, Callable[[Sequence[Call]], str]] = {"bash": bash, "zsh": zsh, "fish": fish}
"""The shells, and what is printed for each."""
_END = "\n"


def _first(call: Call) -> list[str]:
    """What may begin a word after the command."""
    return [*call.words, *(f"--{name}=" for name in call.options)]


def _values(found: Sequence[Call], *, typed: bool = False) -> Iterator[tuple[str, list[str]]]:
    """The words of every option that has some, by command and option. typed: with the option before each."""
    for call in found:
        for name, values in call.options.items():
            if values:
                yield f"{call.name} --{name}", [f"--{name}={value}" if typed else value for value in values]


def _quoted(text: str) -> str:
    return f"'{text}'"
