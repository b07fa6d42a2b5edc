"""Words of SMBIOS enumerations (DMTF DSP0134, section in each line): processors, slots, connectors, devices.

Slots, connectors and onboard devices: `check-values/smbios-enums.csv` of the reference data. Processor
families, and sockets up to 0x3F: what dmidecode 3.4 prints for each code. From memory: sockets from 0x40.
"""

from __future__ import annotations

from shipworthy.machine.parse.smbios.words import named

# 7.5.1, processor types
PROCESSOR_TYPES = named(
    (0x01, "Other|Unknown|Central Processor|Math Processor|DSP Processor|Video Processor"),
)

# 7.5.2, processor families
PROCESSOR_FAMILIES = named(
    (
        0x01,
        "Other|Unknown|8086|80286|80386|80486|8087|80287|80387|80487|Pentium|Pentium Pro|"
        "Pentium II|Pentium MMX|Celeron|Pentium II Xeon|Pentium III|M1|M2|Celeron M|Pentium 4 HT",
    ),
    (
        0x18,
        "Duron|K5|K6|K6-2|K6-3|Athlon|AMD29000|K6-2+|Power PC|Power PC 601|Power PC 603|"
        "Power PC 603+|Power PC 604|Power PC 620|Power PC x704|Power PC 750|Core Duo|"
        "Core Duo Mobile|Core Solo Mobile|Atom|Core M|Core m3|Core m5|Core m7|Alpha|Alpha 21064|"
        "Alpha 21066|Alpha 21164|Alpha 21164PC|Alpha 21164a|Alpha 21264|Alpha 21364|"
        "Turion II Ultra Dual-Core Mobile M|Turion II Dual-Core Mobile M|Athlon II Dual-Core M|"
        "Opteron 6100|Opteron 4100|Opteron 6200|Opteron 4200|FX|MIPS|MIPS R4000|MIPS R4200|"
        "MIPS R4400|MIPS R4600|MIPS R10000|C-Series|E-Series|A-Series|G-Series|Z-Series|R-Series|"
        "Opteron 4300|Opteron 6300|Opteron 3300|FirePro|SPARC|SuperSPARC|MicroSPARC II|"
        "MicroSPARC IIep|UltraSPARC|UltraSPARC II|UltraSPARC IIi|UltraSPARC III|UltraSPARC IIIi",
    ),
    (
        0x60,
        "68040|68xxx|68000|68010|68020|68030|Athlon X4|Opteron X1000|Opteron X2000|"
        "Opteron A-Series|Opteron X3000|Zen",
    ),
    (0x70, "Hobbit"),
    (0x78, "Crusoe TM5000|Crusoe TM3000|Efficeon TM8000"),
    (0x80, "Weitek"),
    (
        0x82,
        "Itanium|Athlon 64|Opteron|Sempron|Turion 64|Dual-Core Opteron|Athlon 64 X2|Turion 64 X2|"
        "Quad-Core Opteron|Third-Generation Opteron|Phenom FX|Phenom X4|Phenom X2|Athlon X2|"
        "PA-RISC|PA-RISC 8500|PA-RISC 8000|PA-RISC 7300LC|PA-RISC 7200|PA-RISC 7100LC|"
        "PA-RISC 7100",
    ),
    (
        0xA0,
        "V30|Quad-Core Xeon 3200|Dual-Core Xeon 3000|Quad-Core Xeon 5300|Dual-Core Xeon 5100|"
        "Dual-Core Xeon 5000|Dual-Core Xeon LV|Dual-Core Xeon ULV|Dual-Core Xeon 7100|"
        "Quad-Core Xeon 5400|Quad-Core Xeon|Dual-Core Xeon 5200|Dual-Core Xeon 7200|"
        "Quad-Core Xeon 7300|Quad-Core Xeon 7400|Multi-Core Xeon 7400|Pentium III Xeon|"
        "Pentium III Speedstep|Pentium 4|Xeon|AS400|Xeon MP|Athlon XP|Athlon MP|Itanium 2|"
        "Pentium M|Celeron D|Pentium D|Pentium EE|Core Solo|Core 2 or K7|Core 2 Duo|Core 2 Solo|"
        "Core 2 Extreme|Core 2 Quad|Core 2 Extreme Mobile|Core 2 Duo Mobile|Core 2 Solo Mobile|"
        "Core i7|Dual-Core Celeron|IBM390|G4|G5|ESA/390 G6|z/Architecture|Core i5|Core i3|"
        "Core i9",
    ),
    (
        0xD2,
        "C7-M|C7-D|C7|Eden|Multi-Core Xeon|Dual-Core Xeon 3xxx|Quad-Core Xeon 3xxx|Nano|"
        "Dual-Core Xeon 5xxx|Quad-Core Xeon 5xxx",
    ),
    (0xDD, "Dual-Core Xeon 7xxx|Quad-Core Xeon 7xxx|Multi-Core Xeon 7xxx|Multi-Core Xeon 3400"),
    (
        0xE4,
        "Opteron 3000|Sempron II|Embedded Opteron Quad-Core|Phenom Triple-Core|"
        "Turion Ultra Dual-Core Mobile|Turion Dual-Core Mobile|Athlon Dual-Core|Sempron SI|"
        "Phenom II|Athlon II|Six-Core Opteron|Sempron M",
    ),
    (0xFA, "i860|i960"),
    (0x100, "ARMv7|ARMv8"),
    (0x104, "SH-3|SH-4"),
    (0x118, "ARM|StrongARM"),
    (0x12C, "6x86|MediaGX|MII"),
    (0x140, "WinChip"),
    (0x15E, "DSP"),
    (0x1F4, "Video Processor"),
    (0x200, "RV32|RV64|RV128"),
)

# 7.5, bits 2:0 of the status
PROCESSOR_STATES = named(
    (0x00, "Unknown|Enabled|Disabled By User|Disabled By Firmware|Idle"),
    (0x07, "Other"),
)

# 7.5.5, processor upgrade: the socket
SOCKETS = named(
    (
        0x01,
        "Other|Unknown|Daughter Board|ZIF Socket|Replaceable Piggy Back|None|LIF Socket|Slot 1|"
        "Slot 2|370-pin Socket|Slot A|Slot M|Socket 423|Socket A (Socket 462)|Socket 478|"
        "Socket 754|Socket 940|Socket 939|Socket mPGA604|Socket LGA771|Socket LGA775|Socket S1|"
        "Socket AM2|Socket F (1207)|Socket LGA1366|Socket G34|Socket AM3|Socket C32|"
        "Socket LGA1156|Socket LGA1567|Socket PGA988A|Socket BGA1288|Socket rPGA988B|"
        "Socket BGA1023|Socket BGA1224|Socket BGA1155|Socket LGA1356|Socket LGA2011|Socket FS1|"
        "Socket FS2|Socket FM1|Socket FM2|Socket LGA2011-3|Socket LGA1356-3|Socket LGA1150|"
        "Socket BGA1168|Socket BGA1234|Socket BGA1364|Socket AM4|Socket LGA1151|Socket BGA1356|"
        "Socket BGA1440|Socket BGA1515|Socket LGA3647-1|Socket SP3|Socket SP3r2|Socket LGA2066|"
        "Socket BGA1392|Socket BGA1510|Socket BGA1528|Socket LGA4189|Socket LGA1200|"
        "Socket LGA4677|Socket LGA1700|Socket BGA1744|Socket BGA1781|Socket BGA1211|"
        "Socket BGA2422|Socket LGA1211|Socket LGA2422|Socket LGA5773|Socket BGA5773|Socket AM5|"
        "Socket SP5|Socket SP6|Socket BGA883|Socket BGA1190|Socket BGA4129|Socket LGA4710|"
        "Socket LGA7529|Socket BGA1964|Socket BGA1792|Socket BGA2049|Socket BGA2551|"
        "Socket LGA1851|Socket BGA2114|Socket BGA2833",
    ),
)

# 7.9.2, connectors
CONNECTORS = named(
    (
        0x00,
        "None|Centronics|Mini Centronics|Proprietary|DB-25 male|DB-25 female|DB-15 male|"
        "DB-15 female|DB-9 male|DB-9 female|RJ-11|RJ-45|50 Pin MiniSCSI|Mini DIN|Micro DIN|PS/2|"
        "Infrared|HP-HIL|Access Bus (USB)|SSA SCSI|Circular DIN-8 male|Circular DIN-8 female|"
        "On Board IDE|On Board Floppy|9 Pin Dual Inline (pin 10 cut)|"
        "25 Pin Dual Inline (pin 26 cut)|50 Pin Dual Inline|68 Pin Dual Inline|"
        "On Board Sound Input From CD-ROM|Mini Centronics Type-14|Mini Centronics Type-26|"
        "Mini Jack (headphones)|BNC|IEEE 1394|SAS/SATA Plug Receptacle|USB Type-C Receptacle",
    ),
    (0xA0, "PC-98|PC-98 Hireso|PC-H98|PC-98 Note|PC-98 Full"),
    (0xFF, "Other"),
)

# 7.9.3, what a connector is for
PORT_TYPES = named(
    (
        0x00,
        "None|Parallel Port XT/AT Compatible|Parallel Port PS/2|Parallel Port ECP|"
        "Parallel Port EPP|Parallel Port ECP/EPP|Serial Port XT/AT Compatible|"
        "Serial Port 16450 Compatible|Serial Port 16550 Compatible|Serial Port 16550A Compatible|"
        "SCSI Port|MIDI Port|Joystick Port|Keyboard Port|Mouse Port|SSA SCSI|USB|"
        "Firewire (IEEE P1394)|PCMCIA Type I|PCMCIA Type II|PCMCIA Type III|Cardbus|"
        "Access Bus Port|SCSI II|SCSI Wide|PC-98|PC-98 Hireso|PC-H98|Video Port|Audio Port|"
        "Modem Port|Network Port|SATA|SAS|MFDP (Multi-Function Display Port)|Thunderbolt",
    ),
    (0xA0, "8251 Compatible|8251 FIFO Compatible"),
    (0xFF, "Other"),
)

# 7.10.1, slots
SLOT_TYPES = named(
    (
        0x01,
        "Other|Unknown|ISA|MCA|EISA|PCI|PC Card (PCMCIA)|VLB|Proprietary|Processor Card|"
        "Proprietary Memory Card|I/O Riser Card|NuBus|PCI-66|AGP|AGP 2x|AGP 4x|PCI-X|AGP 8x|"
        "M.2 Socket 1-DP|M.2 Socket 1-SD|M.2 Socket 2|M.2 Socket 3|MXM Type I|MXM Type II|"
        "MXM Type III|MXM Type III-HE|MXM Type IV|MXM 3.0 Type A|MXM 3.0 Type B|"
        "PCI Express 2 SFF-8639 (U.2)|PCI Express 3 SFF-8639 (U.2)|"
        "PCI Express Mini 52-pin with bottom-side keep-outs|"
        "PCI Express Mini 52-pin without bottom-side keep-outs|PCI Express Mini 76-pin|"
        "PCI Express 4 SFF-8639 (U.2)|PCI Express 5 SFF-8639 (U.2)|"
        "OCP NIC 3.0 Small Form Factor (SFF)|OCP NIC 3.0 Large Form Factor (LFF)|"
        "OCP NIC Prior to 3.0",
    ),
    (0x30, "CXL FLexbus 1.0"),
    (
        0xA0,
        "PC-98/C20|PC-98/C24|PC-98/E|PC-98/Local Bus|PC-98/Card|PCI Express|PCI Express x1|"
        "PCI Express x2|PCI Express x4|PCI Express x8|PCI Express x16|PCI Express 2|"
        "PCI Express 2 x1|PCI Express 2 x2|PCI Express 2 x4|PCI Express 2 x8|PCI Express 2 x16|"
        "PCI Express 3|PCI Express 3 x1|PCI Express 3 x2|PCI Express 3 x4|PCI Express 3 x8|"
        "PCI Express 3 x16",
    ),
    (
        0xB8,
        "PCI Express 4|PCI Express 4 x1|PCI Express 4 x2|PCI Express 4 x4|PCI Express 4 x8|"
        "PCI Express 4 x16|PCI Express 5|PCI Express 5 x1|PCI Express 5 x2|PCI Express 5 x4|"
        "PCI Express 5 x8|PCI Express 5 x16|PCI Express 6+|EDSFF E1|EDSFF E3",
    ),
)

# 7.10.2, width of a slot: bits of a bus, or lanes
SLOT_WIDTHS = named(
    (0x01, "Other|Unknown|8-bit|16-bit|32-bit|64-bit|128-bit|x1|x2|x4|x8|x12|x16|x32"),
)

# 7.10.3, use of a slot
SLOT_USES = named(
    (0x01, "Other|Unknown|Available|In Use|Unavailable"),
)

# 7.10.4, length of a slot
SLOT_LENGTHS = named(
    (0x01, "Other|Unknown|Short|Long|2.5 inch drive|3.5 inch drive"),
)

# 7.10, height of a slot (3.5)
SLOT_HEIGHTS = named(
    (0x00, "not applicable|Other|Unknown|Full height|Low-profile"),
)

# 7.42.2, onboard devices
ONBOARD_TYPES = named(
    (
        0x01,
        "Other|Unknown|Video|SCSI Controller|Ethernet|Token Ring|Sound|PATA Controller|"
        "SATA Controller|SAS Controller|Wireless LAN|Bluetooth|WWAN|eMMC|NVMe Controller|"
        "UFS Controller",
    ),
)
