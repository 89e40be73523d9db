"""Partitions are as small as they can be, and nothing crosses them."""

from __future__ import annotations

from audit.exposure.partitions import TOGETHER, partition_of


def row(files: list[str], **more: str) -> dict[str, object]:
    return {"frame": files[0], "files": files, **dict.fromkeys(TOGETHER), **more}


def test_folders_that_share_nothing_stay_apart(table):
    frames = table([row(["a/1.jpg"], scene="x"), row(["b/1.jpg"], scene="y"), row(["1.jpg"])])
    assert partition_of(frames).tolist() == ["a", "b", "."]


def test_a_setup_over_folders_and_a_frame_on_two_cards_join_them(table):
    frames = table(
        [
            row(["card-1/100/8.jpg"], setup="s"),
            row(["card-1/101/9.jpg"], setup="s"),
            row(["card-1/102/10.jpg", "card-2/100/10.jpg"], bracket="b"),
            row(["card-2/101/11.jpg"], bracket="b"),
            row(["card-3/100/1.jpg"], scene="z"),
        ]
    )
    found = partition_of(frames)
    assert found.tolist() == ["card-1/100"] * 2 + ["card-1/102"] * 2 + ["card-3/100"]
    assert partition_of(frames[::-1])[::-1].tolist() == found.tolist()


def test_a_chain_of_setups_is_one_partition(table):
    frames = table([row([f"{n // 2:03}/{n}.jpg"], setup=f"{(n + 1) // 2}") for n in range(2000)])
    assert set(partition_of(frames)) == {"000"}
