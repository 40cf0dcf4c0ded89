"""A real Mosquitto on a loopback port, started and stopped as a check needs it."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from pathlib import Path

from tests.parts import need_program
from tests.ports import free_port
from tests.sensors.helpers import wait_for

SYSTEM_PROGRAMS = "/usr/sbin:/usr/local/sbin"  # where Debian puts it; not on an ordinary user's path


def system_program(name: str) -> str:
    return shutil.which(name, path=SYSTEM_PROGRAMS) or need_program(name)


class Mosquitto:
    """Keeps what is retained over a restart, in `folder`. `lines` go into its configuration."""

    def __init__(self, folder: Path, *lines: str) -> None:
        self._program = system_program("mosquitto")
        self.port = free_port()
        self._config = folder / "mosquitto.conf"
        ours = [
            f"listener {self.port} 127.0.0.1",
            "persistence true",
            f"persistence_location {folder}/",
            "log_dest none",
            *lines,
        ]
        if os.geteuid() == 0:
            ours.append("user root")  # else it becomes a user who may not write in the folder
        self._config.write_text("\n".join(ours) + "\n")
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            [self._program, "-c", str(self._config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        assert wait_for(self._answers), "Mosquitto did not start"

    def stop(self) -> None:
        """As a service manager would: it saves what is retained."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(5)
            self._process = None

    def kill(self) -> None:
        """As a power failure would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)
            self._process = None

    def _answers(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), 0.5).close()
        except OSError:
            return False
        return True
