"""The ways to a sound card: a JACK or PipeWire server, or the system's own by PortAudio.

Both libraries are extras and load when they are asked for; without them everything else works.
"""

import re
import sys
import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.sounding import Card, Passage

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

Through = Literal["jack", "portaudio"]
NAME = "rigproof"
_CLOSING_S = 3.0
_BLOCK = 1024  # Python wants room: two samples late matter less than one block lost
_EXTRA = f"{sys.executable} -m pip install JACK-Client sounddevice"


def opened(through: Through | None, device: str | None, *, channels: int, rate_hz: int) -> Card:
    """A card for so many channels both ways; without a wish JACK where a server runs.

    Raises:
        Refused: there is none, or it cannot do what is asked.
    """
    if through == "jack":
        return JackCard(device, channels=channels)
    if through is None:
        try:
            return JackCard(device, channels=channels)
        except NoServer:
            pass
    return PortAudioCard(device, channels=channels, rate_hz=rate_hz)


class NoServer(Refused):
    """No JACK library, or no server that runs."""


class JackCard:
    """Ports of a client of a JACK server, which PipeWire is as well, plugged to one device."""

    def __init__(self, device: str | None, *, channels: int) -> None:
        jack = _jack()
        try:
            self._client: Any = jack.Client(NAME, no_start_server=True)
        except jack.JackOpenError as error:
            raise NoServer(
                "no JACK or PipeWire server is running.",
                "Start it, or go without: --through portaudio",
            ) from error
        self._passage: Passage | None = None
        self._freewheel = False
        self.rate_hz = int(self._client.samplerate)
        try:
            takes, gives = self._ports(device, is_input=True), self._ports(device, is_output=True)
            if not takes or not gives:
                raise Refused(
                    f'nothing called "{device}" can play and record.'
                    if device
                    else "the server has no sound card that plays and records.",
                    f"The server has: {', '.join(self._clients()) or 'nothing'}. --device NAME",
                )
            # What is played and not recorded, or the other way, proves nothing.
            self.outputs = self.inputs = min(channels, len(takes), len(gives))
            self._ins = [self._client.inports.register(f"in_{n + 1}") for n in range(self.inputs)]
            self._outs = [
                self._client.outports.register(f"out_{n + 1}") for n in range(self.outputs)
            ]
            self._client.set_process_callback(self._block)
            self._client.set_xrun_callback(self._late)
            self._client.set_freewheel_callback(self._wheel)
            self._client.activate()
            for out, target in zip(self._outs, takes, strict=False):
                self._client.connect(out, target)
            for source, port in zip(gives, self._ins, strict=False):
                self._client.connect(source, port)
        except BaseException:
            self._client.close()
            raise

    def _ports(self, device: str | None, **way: bool) -> Sequence[Any]:
        """The ports of a device, or those that are sockets of a card, in their own order."""
        if device is None:
            found = self._client.get_ports(is_audio=True, is_physical=True, **way)
        else:
            pattern = f"^{re.escape(device)}:"
            found = self._client.get_ports(pattern, is_audio=True, **way)
        return list(found)

    def _clients(self) -> list[str]:
        ports = self._client.get_ports(is_audio=True)
        return sorted({port.name.partition(":")[0] for port in ports} - {self._client.name})

    def _block(self, _frames: int) -> None:
        passage = self._passage
        if passage is None:
            for port in self._outs:
                port.get_array()[:] = 0
            return
        passage.block(
            [port.get_array() for port in self._ins], [port.get_array() for port in self._outs]
        )

    def _late(self, _delayed_us: float) -> None:
        # A server that runs free of the clock counts some although no sample is lost.
        if self._passage is not None and not self._freewheel:
            self._passage.faults += 1

    def _wheel(self, starting: bool) -> None:
        self._freewheel = bool(starting)

    def begin(self, passage: Passage) -> None:
        """Work on this passage from the next block on."""
        self._passage = passage

    def close(self) -> None:
        """Unplug and let go."""
        self._passage = None
        # A server that has thrown the client out answers no more, and the call would never return.
        leaving = threading.Thread(target=self._client.close, daemon=True)
        leaving.start()
        leaving.join(_CLOSING_S)


class PortAudioCard:
    """A sound card by PortAudio, both ways in one stream."""

    def __init__(self, device: str | None, *, channels: int, rate_hz: int) -> None:
        audio = _portaudio()
        self.rate_hz = rate_hz
        self._passage: Passage | None = None
        try:
            found = [audio.query_devices(device, kind) for kind in ("output", "input")]
        except (ValueError, audio.PortAudioError) as error:
            names = [one["name"] for one in audio.query_devices()]
            raise Refused(
                f'no sound card called "{device}" plays and records.'
                if device
                else "there is no sound card that plays and records.",
                f"There are: {', '.join(names)}. --device NAME" if names else "Plug one in.",
            ) from error
        self.outputs = self.inputs = min(
            channels, found[0]["max_output_channels"], found[1]["max_input_channels"]
        )
        if not self.outputs or not self.inputs:
            raise Refused(f"{found[0]['name']} cannot play and record.", "Name another: --device")
        try:
            self._stream: Any = audio.Stream(
                samplerate=rate_hz,
                blocksize=_BLOCK,
                device=(found[1]["index"], found[0]["index"]),
                channels=(self.inputs, self.outputs),
                dtype="float32",
                latency="high",  # how late the sound comes back does not matter, only that it does
                callback=self._block,
            )
            self._stream.start()
        except audio.PortAudioError as error:
            raise Refused(
                f"{found[0]['name']} cannot be opened: {error.args[0]}.",
                f"Is another program using it? Does it run at {rate_hz} Hz? (--rate)",
            ) from error

    def _block(
        self, taken: "Frames", given: "Frames", _frames: int, _time: Any, status: Any
    ) -> None:
        passage = self._passage
        if passage is None:
            given[:] = 0
            return
        if status.input_overflow or status.output_underflow or status.input_underflow:
            passage.faults += 1
        passage.block(list(taken.T), list(given.T))

    def begin(self, passage: Passage) -> None:
        """Work on this passage from the next block on."""
        self._passage = passage

    def close(self) -> None:
        """Stop the stream and let go."""
        self._passage = None
        self._stream.stop()
        self._stream.close()


def _jack() -> Any:
    try:
        import jack
    except (ImportError, OSError) as error:
        need = _EXTRA if isinstance(error, ImportError) else "Install JACK (jackd2 or PipeWire)."
        raise NoServer("JACK cannot be spoken to: its library is missing.", need) from error
    for quiet in (jack.set_error_function, jack.set_info_function):
        quiet(lambda _: None)  # what is worth saying is said in our own words
    return jack


def _portaudio() -> Any:
    try:
        import sounddevice
    except ImportError as error:
        raise Refused("no sound card can be reached: a library is missing.", _EXTRA) from error
    except OSError as error:
        more = "apt install libportaudio2" if sys.platform == "linux" else _EXTRA
        raise Refused("no sound card can be reached: PortAudio is missing.", more) from error
    return sounddevice
