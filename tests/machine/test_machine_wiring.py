"""Places: the same part has the same place after nicknames have moved."""

from __future__ import annotations

import pytest

from shipworthy.machine.join import join
from shipworthy.machine.pairing import natural
from shipworthy.machine.parse.wiring import device_place, interface_of, storage_place
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

AHCI = "/sys/devices/pci0000:00/0000:00:17.0"


@pytest.mark.parametrize(
    ("path", "place", "interface"),
    [
        (f"{AHCI}/ata2/host1/target1:0:0/1:0:0:0/block/sda", "pci:0000:00:17.0/ata-2", "SATA"),
        (f"{AHCI}/ata2/host1/target1:0:0/1:0:0:0/block/sdq", "pci:0000:00:17.0/ata-2", "SATA"),
        (f"{AHCI}/ata2/host1/target1:0:1/1:0:1:0/block/sdb", "pci:0000:00:17.0/ata-2.1", "SATA"),
        (
            "/sys/devices/pci0000:00/0000:00:01.2/0000:04:00.0/nvme/nvme3/nvme3n1",
            "pci:0000:04:00.0/nvme-ns-1",
            "NVMe",
        ),
        ("/sys/devices/pci0000:00/0000:00:02.0/virtio1/block/vda", "pci:0000:00:02.0/virtio", "virtio"),
        ("/sys/devices/platform/virtio-mmio.3/virtio3/block/vdb", "virtio:virtio-mmio.3", "virtio"),
        (
            "/sys/devices/pci0000:00/0000:00:14.0/usb2/2-1/2-1.4/2-1.4:1.0/host6/target6:0:0/6:0:0:0/block/sdc",
            "pci:0000:00:14.0/usb-2-1.4",
            "USB",
        ),
        (
            "/sys/devices/pci0000:00/0000:00:14.0/usb2/2-1/2-1:1.0/host6/target6:0:0/6:0:0:2/block/sdd",
            "pci:0000:00:14.0/usb-2-1/lun-2",
            "USB",
        ),
        (
            "/sys/devices/pci0000:00/0000:01:00.0/host0/target0:1:5/0:1:5:0/block/sde",
            "pci:0000:01:00.0/scsi-1:5:0",
            "SCSI",
        ),
        ("/sys/devices/virtual/block/loop0", None, "other"),
    ],
)
def test_a_block_device_is_told_by_where_it_is_wired(path: str, place: str | None, interface: str) -> None:
    assert storage_place(path) == place
    assert interface_of(path) == interface


def test_the_controllers_own_port_number_counts_where_the_kernel_gives_it() -> None:
    path = f"{AHCI}/ata9/host8/target8:0:0/8:0:0:0/block/sda"
    assert storage_place(path, ata_port=3) == "pci:0000:00:17.0/ata-3"


def test_a_namespace_behind_a_subsystem_is_told_by_its_controller() -> None:
    path = "/sys/devices/virtual/nvme-subsystem/nvme-subsys0/nvme0n1"
    controller = "/sys/devices/pci0000:00/0000:04:00.0/nvme/nvme1"
    assert storage_place(path, controller=controller, namespace=1) == "pci:0000:04:00.0/nvme-ns-1"
    assert storage_place(path) is None


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("/sys/devices/pci0000:00/0000:00:18.3", "pci:0000:00:18.3"),
        ("/sys/devices/platform/coretemp.0", "platform:coretemp.0"),
        ("/sys/devices/pci0000:00/0000:00:1f.4/i2c-0/0-0051", "pci:0000:00:1f.4/i2c-0-0051"),
        ("/sys/devices/pci0000:00/0000:04:00.0/nvme/nvme0", "pci:0000:04:00.0"),
        ("/sys/devices/pci0000:00/0000:00:03.0/virtio2", "pci:0000:00:03.0"),
        ("/sys/devices/pci0000:00/10000:e1:00.0", "pci:10000:e1:00.0"),
    ],
)
def test_a_device_is_told_by_the_bus_function_it_hangs_on(path: str, place: str) -> None:
    assert device_place(path) == place


def sighting(place: str, source: str, *said: Said, also: tuple[str, ...] = ()) -> Sighting:
    return Sighting(kind=PartKind.STORAGE, place=place, source=source, said=said, also_at=also)


def test_a_value_is_believed_over_a_reason_and_the_reason_stays_as_a_witness() -> None:
    (part,) = join(
        [
            sighting("a", "nvme", Said(name="serial", absent=Absent.NOT_READABLE)),
            sighting("a", "block", Said(name="serial", value="S1")),
        ]
    )
    fact = part.fact("serial")
    assert fact is not None
    assert (fact.value, fact.source, fact.rule) == ("S1", "block", "only")
    assert fact.witnesses[0].absent is Absent.NOT_READABLE


def test_the_order_in_which_sources_came_does_not_matter_to_belief() -> None:
    words = [
        sighting("a", "block", Said(name="model", value="Kernel's")),
        sighting("a", "nvme.nvme0.identify-controller", Said(name="model", value="Drive's")),
    ]
    for order in (words, words[::-1]):
        fact = join(order)[0].fact("model")
        assert fact is not None and fact.value == "Drive's" and fact.rule == "the drive over the kernel"
        assert fact.disputed


def test_agreement_is_named_and_two_silences_are_none() -> None:
    (part,) = join(
        [
            sighting(
                "a", "nvme", Said(name="size_bytes", value=5), Said(name="serial", absent=Absent.NOT_OFFERED)
            ),
            sighting(
                "a",
                "block",
                Said(name="size_bytes", value=5),
                Said(name="serial", absent=Absent.NOT_READABLE),
            ),
        ]
    )
    size, serial = part.fact("size_bytes"), part.fact("serial")
    assert size is not None and size.rule == "agreed" and not size.disputed
    assert serial is not None and serial.absent is Absent.NOT_READABLE


def test_sightings_are_one_part_by_a_second_name_even_when_it_comes_last() -> None:
    (part,) = join([sighting("a", "x"), sighting("b", "y"), sighting("c", "z", also=("a", "b"))])
    assert part.place == "a"
    assert set(part.also_at) == {"b", "c"}


def test_places_of_two_kinds_are_two_parts() -> None:
    parts = join([sighting("a", "x"), Sighting(kind=PartKind.PCI_DEVICE, place="a", source="x", said=())])
    assert [part.kind for part in parts] == [PartKind.STORAGE, PartKind.PCI_DEVICE]


def test_places_are_ordered_as_people_count() -> None:
    assert sorted(["cpu:10", "cpu:9", "cpu:1"], key=natural) == ["cpu:1", "cpu:9", "cpu:10"]
    assert sorted(["1", "a", "a1", ""], key=natural) == ["", "1", "a", "a1"]


def test_sockets_that_cannot_be_paired_stay_apart() -> None:
    def processor(place: str, source: str) -> Sighting:
        return Sighting(
            kind=PartKind.PROCESSOR, place=place, source=source, said=(Said(name="model", value="m"),)
        )

    one = join([processor("socket:3", "cpuinfo"), processor("smbios-processor:0", "smbios.table")])
    assert [part.place for part in one] == ["socket:3"]
    two = join(
        [
            processor("socket:0", "cpuinfo"),
            *(processor(f"smbios-processor:{n}", "smbios.table") for n in (0, 1)),
        ]
    )
    assert [part.place for part in two] == ["smbios-processor:0", "smbios-processor:1", "socket:0"]
