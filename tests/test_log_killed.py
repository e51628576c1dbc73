"""The session log: whenever the program is killed, every confirmed entry is on the disk."""

from __future__ import annotations

import multiprocessing
import random
import time
from multiprocessing.connection import Connection
from pathlib import Path

from log_sample import NoFlush, add, header, write_until_killed

from assistant.log import SessionLog, reopen, verify


def confirmed_before_death(pipe: Connection) -> int:
    count = 0
    try:
        while True:
            count = int.from_bytes(pipe.recv_bytes(), "big") + 1
    except EOFError:
        return count


KILLS = 40


def test_a_writer_that_is_killed_at_any_moment_has_lost_no_confirmed_entry(tmp_path: Path) -> None:
    chance = random.Random(20260302)
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")
    if context.get_start_method() == "forkserver":
        context.set_forkserver_preload(["__main__", "assistant.log"])
    confirmed = torn = 0
    for kill in range(KILLS):
        path = tmp_path / f"{kill}.jsonl"
        ours, theirs = context.Pipe(duplex=False)
        writer = context.Process(target=write_until_killed, args=(path, theirs, kill % 2 == 1))
        writer.start()
        theirs.close()
        ours.poll(20)  # the first entry is confirmed
        time.sleep(chance.uniform(0, 0.03))
        writer.kill()
        writer.join()
        count = confirmed_before_death(ours)

        log, session = reopen(path, disk=NoFlush())
        add(log, 0)
        log.close()
        assert len(session.entries) in (count, count + 1)
        with SessionLog.create(tmp_path / f"{kill}-again.jsonl", header(), disk=NoFlush()) as again:
            assert [add(again, number) for number in range(len(session.entries))] == list(session.entries)
        assert len(verify(path).entries) == len(session.entries) + 1
        confirmed += count
        torn += session.torn
    print(f"{KILLS} kills, {confirmed} entries confirmed and found, {torn} torn ends recovered")
    assert confirmed >= KILLS
    assert torn > 0, "no kill came in the middle of a line, so nothing about it was shown"
