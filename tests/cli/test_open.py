"""The workbench as a person starts it: from a terminal, ended by Ctrl C."""

import signal
import socket
import subprocess
import sys

import httpx
import pytest

PROGRAM = (sys.executable, "-m", "loomwright.cli", "open", "--no-browser")


@pytest.fixture
def started():
    processes = []

    def start(*words):
        process = subprocess.Popen([*PROGRAM, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        processes.append(process)
        return process

    yield start
    for process in processes:
        process.kill()
        process.communicate()


def address_of(process):
    line = process.stdout.readline()
    assert "http://127.0.0.1:" in line, process.stderr.read()
    return line.split()[-1]


def first_page(address):
    with httpx.Client(follow_redirects=True, transport=httpx.HTTPTransport(retries=50)) as client:
        return client.get(address)


def test_it_prints_its_address_serves_an_example_and_ends_with_control_c(started, tmp_path):
    process = started("--in", str(tmp_path), "--example", "bench")
    answer = first_page(address_of(process))
    assert answer.status_code == 200
    assert "text/html" in answer.headers["content-type"]
    assert (tmp_path / "bench" / "vehicle.toml").is_file()
    process.send_signal(signal.SIGINT)
    assert process.wait(10) in (0, -signal.SIGINT, 130)


def test_it_opens_a_folder(started, tmp_path):
    from loomwright.app.start import start_from_example

    start_from_example(tmp_path / "mine", "bench")
    answer = first_page(address_of(started(str(tmp_path / "mine"))))
    assert answer.status_code == 200
    assert answer.url.path != "/start"


def test_without_a_folder_it_asks_how_to_begin(started, tmp_path):
    answer = first_page(address_of(started("--in", str(tmp_path))))
    assert answer.url.path == "/start"


@pytest.mark.parametrize("words", [("nothing-there",), ("--example", "nothing")])
def test_what_cannot_be_opened_is_told(started, tmp_path, words):
    process = started("--in", str(tmp_path), *words)
    assert process.wait(20) == 2
    assert "loomwright:" in process.stderr.read()


def test_a_port_that_is_taken_is_told(started, tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        process = started("--in", str(tmp_path), "--port", str(taken.getsockname()[1]))
        assert process.wait(20) == 2
    assert "cannot be had" in process.stderr.read()
