"""With --json nothing but one JSON document reaches standard output, whatever a library prints."""

import json
import subprocess
import sys

import pytest

PROGRAM = """
import ctypes, os, subprocess, sys
import click
from harvestcast.errors import InputError, Problem
from harvestcast.report.command.terminal import command, show_json

@click.command()
@click.option("--fails", is_flag=True)
@command
def noisy(fails, as_json, progress):
    ctypes.CDLL(None).puts(b"held back by the C library")
    os.write(1, b"written to the descriptor\\n")
    print("printed by Python")
    subprocess.run([sys.executable, "-c", "print('printed by a child')"], check=True)
    if fails:
        raise InputError([Problem(file="a", rule="b", cure="c")])
    show_json({"ok": True})
    print("printed afterwards")

noisy(standalone_mode=False)
"""


@pytest.mark.parametrize("arguments", [["--json"], ["--json", "--fails"]])
@pytest.mark.skipif(sys.platform == "win32", reason="the C library has another name there")
def test_what_libraries_print_goes_to_standard_error(arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments], capture_output=True, text=True, check=False
    )
    assert json.loads(done.stdout)["ok"] is ("--fails" not in arguments), done.stdout
    for words in ("the C library", "the descriptor", "by Python", "by a child"):
        assert words in done.stderr


def test_standard_output_is_as_before_afterwards() -> None:
    more = PROGRAM.replace("noisy(stand", "noisy(['--json'], stand").rstrip()
    more += "\nos.write(1, b'after\\n')\nprint('and after')\n"
    done = subprocess.run([sys.executable, "-c", more], capture_output=True, text=True, check=True)
    assert done.stdout.endswith("}\nafter\nand after\n")
    assert json.loads(done.stdout.removesuffix("after\nand after\n")) == {"ok": True}


def test_without_a_standard_output_no_traceback() -> None:
    done = subprocess.run(
        ["sh", "-c", f'"{sys.executable}" -c "{CLOSED}" >&-'],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "no such folder" in done.stderr and "Traceback" not in done.stderr


CLOSED = "from harvestcast.report.command.main import main; main(['check', '/nowhere', '--json'])"
