"""Profiles as files: what is read, what is written, and which key is named when one is wrong."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from witnessmark.errors import BadInput, StoreError
from witnessmark.meters.address import Address
from witnessmark.meters.number import NumberType, Order
from witnessmark.meters.over_bluetooth import OverBluetooth
from witnessmark.meters.profile import read_profile, write_profile
from witnessmark.meters.profile_folder import (
    check_profile_name,
    known_profiles,
    load_profile,
    replaced_words,
    save_profile,
)
from witnessmark.meters.profile_words import in_words
from witnessmark.session.meter_options import profiles_for

HEAD = 'format = "witnessmark profile 1"\n'
FRAME = """
[frame]
length = 10
header = "59 59"
distance = { at = 2, order = "little", type = "uint16", unit = "mm", scale = 0.1, longest = "6 m" }
fixed = [{ at = 6, bytes = "0D0A" }]
status = { at = 4, ok = ["00", "10"], faults = { 01 = "too little light", 0a = "too hot" } }
checksum = { kind = "crc16-modbus", covers_from = 2 }
"""
TEXT = r"""
[text]
pattern = '(?P<value>[0-9.]+) (?P<unit>m|ft),(?P<status>.*)'
ok = ["OK"]
faults = { E1 = "too little light", "---" = "out of range" }
ends = ";"
longest = "40 m"
"""
MODBUS = """
[serial]
line = "8E1"
baud = 19200
[modbus]
device = 17
function = 4
register = 107
type = "int32"
word_order = "little"
unit = "mm"
scale = 0.01
every = 0.5
only_changes = true
status = { register = 3, ok = [0, 4], faults = { 2 = "too little light" } }
"""
BLUETOOTH = """
[bluetooth]
characteristic = "FFE1"
service = "0000ffe0-0000-1000-8000-00805f9b34fb"
request = { bytes = "10 01", every = 2 }
request_characteristic = "ffe2"
[text]
unit = "ft"
"""
REQUEST = '[serial]\nrequest = { text = "take\\r\\n" }\n[text]\n'


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "profiles"
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(folder))
    return folder


@pytest.mark.parametrize("text", [FRAME, TEXT, MODBUS, BLUETOOTH, REQUEST])
def test_what_is_written_is_read_back_the_same(text: str) -> None:
    profile = read_profile(HEAD + text)
    written = write_profile(profile)
    assert written.startswith(HEAD)
    assert read_profile(written) == profile
    assert in_words(profile)


@pytest.mark.parametrize(
    ("written", "mm"),
    [("1/8 in", 3.175), ("12.1250 mm", 12.125), ("0.0001 mm", 0.0001), ("33.3333333333 mm", None)],
)
def test_a_length_is_read_back_the_same_however_many_decimals_it_has(
    written: str, mm: float | None
) -> None:
    profile = read_profile(f'{HEAD}step = "{written}"\n[text]\nshortest = "{written}"\n')
    assert profile.step == pytest.approx(33.3333333333 if mm is None else mm, rel=1e-12)
    assert read_profile(write_profile(profile)) == profile


def test_the_smallest_lengths_are_written_without_a_power_of_ten() -> None:
    profile = read_profile(f"{HEAD}[text]\nfault_values = [1e-7, 1e-300, 0, -0.0]\n")
    assert read_profile(write_profile(profile)) == profile


def test_a_mark_that_an_editor_sets_before_the_text_does_no_harm(own_folder: Path) -> None:
    own_folder.mkdir()
    (own_folder / "mine.toml").write_bytes(b"\xef\xbb\xbf" + (HEAD + TEXT).encode())
    assert load_profile("mine") == read_profile(HEAD + TEXT)


def test_a_frame() -> None:
    frame = read_profile(HEAD + FRAME).frame
    assert frame is not None
    assert (frame.length, frame.header, frame.checksum_at) == (10, b"YY", 8)
    assert (frame.distance.type, frame.distance.order) == (NumberType.UINT16, Order.LITTLE)
    assert (frame.distance.scale, frame.distance.longest) == (0.1, 6000.0)
    assert frame.status is not None
    assert frame.status.ok == (b"\x00", b"\x10")
    assert frame.status.faults == {"01": "too little light", "0a": "too hot"}


def test_a_bluetooth_profile_as_its_driver_sees_it(own_folder: Path) -> None:
    own_folder.mkdir()
    (own_folder / "mine.toml").write_text(HEAD + BLUETOOTH)
    profile = OverBluetooth.load("mine")
    assert profile.notifies == "0000ffe1-0000-1000-8000-00805f9b34fb"
    assert profile.takes_request == "0000ffe2-0000-1000-8000-00805f9b34fb"
    assert (profile.request, profile.every_s) == (b"\x10\x01", 2.0)
    with pytest.raises(BadInput, match="not for Bluetooth"):
        OverBluetooth.load("text-metres")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("", "the file: a profile has exactly one of the tables text, frame and modbus"),
        ("[text]\n" + FRAME, "the file: a profile has exactly one of"),
        ("colour = 1\n[text]", "colour: no such key here"),
        ('[text]\nunits = "m"', "text.units: no such key here; the keys are pattern, unit,"),
        ('[text]\nunit = "ells"', 'text.unit: "ells" is not one of mm, cm, m, in, ft, yd'),
        ("[text]\nscale = 0.1", "text: ok and scale need a pattern"),
        ("[text]\npattern = '('", 'text.pattern: "(" is not a regular expression'),
        ("[text]\npattern = '[0-9]'", "text.pattern: "),
        ("[text]\npattern = '(?P<value>.)(?P<colour>.)'", "text.pattern: "),
        ("[text]\npattern = '(?P<value>.)'", "text: give the unit of the pattern's value"),
        ("[text]\npattern = '(?P<value>.)m(?P<status>.)'\nunit = 'm'", "text: the group"),
        ("[text]\npattern = '(?P<value>.)'\nunit = 'm'\nok = ['1']", "text: the group"),
        ("[text]\nends = '12'", "text.ends: "),
        ("[text]\nlongest = '200 m'", 'text.longest: "200 m" is not a length up to 100 m'),
        ("[text]\nfaults = { E1 = 3 }", "text.faults: "),
        (FRAME.replace("length = 10", "length = 9"), "frame: checksum and fixed 1 stand in"),
        (FRAME.replace("at = 4", "at = 3"), "frame: status and distance stand in the same byte 3"),
        (FRAME.replace("length = 10", "length = 5"), "frame: fixed 1 reaches out of a frame of 5"),
        (FRAME.replace("length = 10", "length = true"), "frame.length: true is not a number of"),
        (FRAME.replace("uint16", "uint8"), 'frame.distance.type: "uint8" is not one of uint16'),
        (FRAME.replace("little", "middle"), 'frame.distance.order: "middle" is not one of big'),
        (FRAME.replace("at = 2", "at = -2"), "frame.distance.at: -2 is not a place"),
        (FRAME.replace("scale = 0.1", "scale = 0"), "frame.distance.scale: 0 is not a factor"),
        (FRAME.replace("0D0A", "0D0"), 'frame.fixed 1.bytes: "0D0" is not bytes'),
        (FRAME.replace('"00", "10"', '"00", "1010"'), "frame.status: ok is a list of single"),
        (FRAME.replace("0a =", "xy ="), "frame.status.faults: "),
        (FRAME.replace("crc16-modbus", "crc17"), 'frame.checksum.kind: "crc17" is not one of'),
        (FRAME.replace("covers_from = 2", "covers_from = 8"), "frame: checksum.covers_from"),
        (FRAME.replace('type = "uint16", ', ""), "frame.distance.type is missing"),
        (MODBUS.replace("8E1", "9E1"), 'serial.line: "9E1" is not data bits, parity'),
        (MODBUS.replace("19200", "1"), "serial.baud: 1 is not a speed"),
        (MODBUS.replace("device = 17", "device = 0"), "modbus.device: 0 is not a device"),
        (MODBUS.replace("function = 4", "function = 5"), "modbus.function: 5 is not 3 (holding"),
        (MODBUS.replace("register = 107", "register = 65535"), "modbus: register 65535 is too"),
        (MODBUS.replace("int32", "int24"), "modbus: type int24 does not fill whole registers"),
        (MODBUS.replace("every = 0.5", "every = 0"), "modbus.every: 0 is not seconds"),
        (MODBUS.replace("true", "'yes'"), "modbus.only_changes: must be true or false, not a"),
        ("[text]\nok = 'a'", "text.ok: must be a list, each a text, not a text"),
        (
            FRAME.replace("at = 6, bytes", "at = 6, byte"),
            "frame.fixed 1.byte: no such key here; the",
        ),
        (MODBUS.replace("[0, 4]", "[]"), "modbus.status: ok is a list of numbers"),
        (MODBUS.replace("[modbus]", "request = { text = 'D' }\n[modbus]"), "the file: modbus"),
        (BLUETOOTH.replace("FFE1", "FFE"), 'bluetooth.characteristic: "FFE" is not a UUID'),
        (BLUETOOTH.replace("0000ffe0", " 000ffe0"), 'bluetooth.service: " 000ffe0-0000'),
        (BLUETOOTH.replace("0000ffe0", "+00_ffe0"), 'bluetooth.service: "+00_ffe0-0000'),
        (BLUETOOTH.replace('bytes = "10 01", ', ""), "bluetooth.request: a request is either"),
        (
            BLUETOOTH.replace('request = { bytes = "10 01", every = 2 }\n', ""),
            "bluetooth: request_characteristic goes with a request, which is missing",
        ),
        (BLUETOOTH.replace("10 01", "10 0"), "bluetooth.request.bytes: "),
        ("[text", "not a TOML file: "),
        (".".join("a" * 3000) + " = 1", "not a TOML file: it is nested too deeply at line 2, "),
    ],
)
def test_the_wrong_key_is_named(text: str, key: str) -> None:
    with pytest.raises(BadInput) as error:
        read_profile(HEAD + text)
    assert str(error.value).startswith(key)
    assert "\n" not in str(error.value)


def test_a_folder_that_cannot_be_looked_into_holds_no_profiles(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shipped = known_profiles()
    monkeypatch.setenv("WITNESSMARK_PROFILES", "/" + "x" * 300)
    assert known_profiles() == shipped
    assert load_profile(shipped[0])
    assert replaced_words("mine") == ""


@pytest.mark.parametrize("text", ["[text]", 'format = "witnessmark round 1"\n[text]'])
def test_a_file_that_is_no_profile_says_so(text: str) -> None:
    with pytest.raises(BadInput, match='its first line is format = "witnessmark profile 1"'):
        read_profile(text)


def test_a_number_of_thousands_of_digits_is_told_in_plain_words() -> None:
    with pytest.raises(BadInput, match="not a TOML file: it holds a number of thousands of digits"):
        read_profile(HEAD + "[serial]\nbaud = " + "9" * 5000)


def test_the_shipped_profiles_are_sound_and_generic(own_folder: Path) -> None:
    names = known_profiles()
    assert {"text-metres", "text-millimetres", "modbus-float-metres"} <= set(names)
    for name in names:
        assert in_words(load_profile(name))
        assert load_profile(name).about


def test_ones_own_goes_before_the_shipped(own_folder: Path) -> None:
    assert "mine" not in known_profiles()
    save_profile("mine", read_profile(HEAD + FRAME))
    save_profile("text-metres", read_profile(HEAD + TEXT))
    assert "mine" in known_profiles()
    assert load_profile("mine") == read_profile(HEAD + FRAME)
    assert load_profile("text-metres") == read_profile(HEAD + TEXT)


def test_a_former_profile_is_kept_beside_the_new(own_folder: Path) -> None:
    save_profile("mine", read_profile(HEAD + FRAME))
    save_profile("mine", read_profile(HEAD + TEXT))
    assert load_profile("mine") == read_profile(HEAD + TEXT)
    assert read_profile((own_folder / "mine.toml.old").read_text()) == read_profile(HEAD + FRAME)
    assert known_profiles().count("mine") == 1


def test_a_profile_is_on_disk_before_it_takes_the_place_of_the_former(
    own_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_profile("mine", read_profile(HEAD + FRAME))
    synced: list[int] = []
    there: list[bool] = []
    really = Path.replace

    def replace(beside: Path, path: Path) -> None:
        there.append(bool(synced) and (own_folder / "mine.toml").exists())
        really(beside, path)
        there.append((own_folder / "mine.toml").exists())

    monkeypatch.setattr(os, "fsync", synced.append)
    monkeypatch.setattr(Path, "replace", replace)
    save_profile("mine", read_profile(HEAD + TEXT))
    assert there
    assert all(there)
    assert len(synced) == 2  # the former one, which is kept, and the new


def test_a_profile_that_cannot_be_written_leaves_the_former(
    own_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_profile("mine", read_profile(HEAD + FRAME))

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreError, match="cannot be saved: No space left"):
        save_profile("mine", read_profile(HEAD + TEXT))
    assert load_profile("mine") == read_profile(HEAD + FRAME)
    assert [path.name for path in own_folder.iterdir()] == ["mine.toml"]


def test_a_folder_of_nobody_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WITNESSMARK_PROFILES", "~nobody-of-this-name/x")
    why = "nobody here has a folder of that name"
    with pytest.raises(BadInput, match=why):
        known_profiles()
    (complaint,) = profiles_for(Address.parse("serial:COM3")).complaints
    assert why in complaint


def test_a_wrong_file_is_named_with_its_key(own_folder: Path) -> None:
    own_folder.mkdir()
    (own_folder / "mine.toml").write_text(HEAD + "[text]\nunit = 3\n")
    with pytest.raises(BadInput, match=r"mine.toml: text.unit: 3 is not one of"):
        load_profile("mine")
    (own_folder / "mine.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(BadInput, match=r"mine.toml: the profile is not a text file"):
        load_profile("mine")


@pytest.mark.parametrize("name", ["nothing", "../mine", "", "a/b", ".hidden", "text-metres.toml"])
def test_an_unknown_profile_names_the_known_ones(own_folder: Path, name: str) -> None:
    with pytest.raises(BadInput, match=r"known: .*text-metres"):
        load_profile(name)


@pytest.mark.parametrize("name", ["", "a b", "../x", "ä", "x" * 65, "-x", "x.toml"])
def test_what_is_no_name_is_refused(own_folder: Path, name: str) -> None:
    with pytest.raises(BadInput, match="profile name"):
        check_profile_name(name)
    with pytest.raises(BadInput, match="profile name"):
        save_profile(name, read_profile(HEAD + TEXT))


def test_a_folder_that_cannot_be_made_says_so(own_folder: Path) -> None:
    own_folder.write_text("a file is in the way")
    with pytest.raises(StoreError, match="the profile cannot be saved"):
        save_profile("mine", read_profile(HEAD + TEXT))


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "about = " + "[" * 900 + "]" * 900,
        HEAD + "about = " + "[" * 20 + "]" * 20,
        HEAD + "[serial]\nbaud = " + "9" * 5000,
        HEAD + "[serial]\nbaud = 0x" + "9" * 5000,
        HEAD + "[text]\nscale = 0x" + "9" * 5000,
        HEAD + "[text]\npattern = " + "[" * 90 + "]" * 90,
        HEAD + "[text]\nok = [" + "{a=" * 90 + "1" + "}" * 90 + "]",
        HEAD + "about = '" + "x" * 70_000 + "'",
    ],
)
def test_a_strangers_file_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(BadInput) as refused:
        read_profile(text)
    assert len(str(refused.value)) < 600


def test_what_a_saved_profile_replaces_or_hides_is_said_and_all_former_ones_stay(
    own_folder: Path,
) -> None:
    assert replaced_words("mine") == ""
    assert "shipped" in replaced_words("text-metres")
    kept = []
    for text in (FRAME, TEXT, FRAME):
        kept.append(replaced_words("mine"))
        save_profile("mine", read_profile(HEAD + text))
    assert [words.rpartition(" ")[2] for words in kept] == ["", "mine.toml.old", "mine.toml.old1"]
    assert sorted(path.name for path in own_folder.iterdir()) == [
        "mine.toml",
        "mine.toml.old",
        "mine.toml.old1",
    ]
