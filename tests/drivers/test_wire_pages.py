"""Each family's page names the public sources of its wire, and the captures of that wire."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.driverapi.registry import Registry

DRIVERS = Path(__file__).parents[2] / "drivers"
SOURCES = {
    "line": ("ISO/IEC 646", "ISO 1155", "Catalogue of parametrised CRC algorithms"),
    "frame": ("IEEE 754-2019", "ISO 1155", "Catalogue of parametrised CRC algorithms"),
    "modbus": (
        "MODBUS Application Protocol Specification",
        "MODBUS over Serial Line Specification",
        "MODBUS Messaging on TCP/IP",
    ),
    "usbtmc": (
        "USB Test and Measurement Class Specification",
        "Subclass USB488 Specification",
        "IEEE 488.2",
        "SCPI",
    ),
    "hid": ("Device Class Definition for Human Interface Devices", "HID Usage Tables"),
    "keyed": ("ISO/IEC 646", "common practice, no source"),
}


def test_every_family_of_this_house_has_a_page_with_sources() -> None:
    own = {name for name in Registry().names if (DRIVERS / name).is_dir()}
    assert own == set(SOURCES)


@pytest.mark.parametrize("family", SOURCES)
def test_a_page_names_its_sources_before_anything_else(family: str) -> None:
    text = (DRIVERS / family / "WIRE.md").read_text("utf-8")
    head, _, _ = text.partition("\n## ")
    assert "ource" in head
    said = " ".join(text.split())
    assert [source for source in SOURCES[family] if source not in said] == []
