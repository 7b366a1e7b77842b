"""Spanish checked against a person: telephone prompts spoken in Bogota's Spanish, Debian's asterisk-prompt-es-co."""

import shutil
import subprocess
from pathlib import Path

import pytest

from logger.speech import hear

PROMPTS = Path("/usr/share/asterisk/sounds/es")
SAID = {
    "agent-loginok": "Agente conectado al sistema",
    "conf-getpin": "ingrese la contraseña de la conferencia",
    "conf-lockednow": "Esta conferencia ahora está bloqueada",
    "conf-onlyone": "Actualmente se encuentra un participante en la conferencia",
    "vm-nobodyavail": "Nadie está disponible",
    "vm-mismatch": "son diferentes",
}
"""What is said in each, or the part of it that is heard right; no words are published with them."""

pytestmark = [
    pytest.mark.model,
    pytest.mark.outside,
    pytest.mark.skipif(not PROMPTS.is_dir(), reason="Debian package asterisk-prompt-es-co is not installed"),
    pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="Debian package ffmpeg is not installed"),
]


@pytest.mark.parametrize("prompt", SAID)
def test_a_person_is_heard_in_spanish_with_nothing_said_of_the_language(prompt, tmp_path):
    path = tmp_path / f"{prompt}.wav"
    subprocess.run(["ffmpeg", "-v", "error", "-i", PROMPTS / f"{prompt}.gsm", path], check=True)
    (note,) = hear(path)
    assert note.language == "es"
    assert SAID[prompt].casefold() in note.heard.casefold()
