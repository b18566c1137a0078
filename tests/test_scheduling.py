"""With several processes, tests that share what is made once go to one of them."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from types import SimpleNamespace

from xdist.remote import Producer

from tests.scheduling import Groups

FILES = ("editor/test_press", "test_wardrobe", "editor/test_by_hand", "test_geometry_affine", "test_demo")


class Process:
    """Takes tests as the plugin's own processes do, and ends each at once."""

    shutting_down = False

    def __init__(self) -> None:
        self.waiting: list[int] = []
        self.done: list[int] = []
        self.gateway = SimpleNamespace(id="")

    def send_runtest_some(self, numbers: list[int]) -> None:
        self.waiting.extend(numbers)

    def shutdown(self) -> None:
        pass


def test_each_group_is_handed_to_one_process() -> None:
    names = [f"tests/{file}.py::test_{number}" for number in range(6) for file in FILES]
    processes = [Process() for _ in range(3)]
    groups = Groups(
        SimpleNamespace(
            rootpath=Path(__file__).parents[1],
            option=SimpleNamespace(loadscopereorder=True),
            getvalue=lambda _: ["popen"] * len(processes),
        ),
        Producer("groups", enabled=False),
    )
    for process in processes:
        groups.add_node(process)
        groups.add_node_collection(process, names)
    groups.schedule()
    while any(process.waiting for process in processes):
        for process in processes:
            if process.waiting:
                process.done.append(process.waiting.pop(0))
                groups.mark_test_complete(process, process.done[-1])
    assert sorted(number for process in processes for number in process.done) == list(range(len(names)))
    ran = defaultdict(set)
    for k, process in enumerate(processes):
        for number in process.done:
            ran[names[number].split("/", 1)[1].split(".py")[0]].add(k)
    assert ran["editor/test_press"] == ran["editor/test_by_hand"]
    assert [len(ran[file]) for file in FILES] == [1, 1, 1, 2, 1]  # while one drives the editor
    # the editor takes longest
    assert processes[0].done[0] == 0
