// Sensors that show what the host writes: words of memory that the kernel is told to leave alone. A thermal
// zone in tenths of a kelvin, and a board's own interface to its sensors as the driver asus_atk0110 knows it:
// the processor's temperature in tenths of °C, its fan in rpm with one added (1: it stands). 0: not written.
DefinitionBlock ("", "SSDT", 2, "BENCH", "THERM", 1)
{
  OperationRegion (HOST, SystemMemory, 0x7FE00000, 0x100)
  Field (HOST, DWordAcc, NoLock, Preserve) { TENK, 32, TENC, 32, RPM1, 32 }
  Scope (\_TZ)
  {
    ThermalZone (THRM)
    {
      Name (_TZP, 10)
      Method (_TMP, 0, Serialized) { Local0 = TENK  If (Local0 == 0) { Local0 = 3032 }  Return (Local0) }
      Method (_CRT, 0) { Return (3732) }
    }
  }
  Scope (\_SB)
  {
    Device (ATKD)
    {
      Name (_HID, "ATK0110")
      Name (VSIF, Package () { 0 })
      Name (TSIF, Package () { 1, Package () { 0x06030001, "CPU Temperature", 800, 1000, 1 } })
      Name (FSIF, Package () { 1, Package () { 0x06040001, "CPU FAN Speed", 300, 7200, 1 } })
      Method (RVLT, 1) { Return (0) }
      // no sensor stands perfectly still: the clock's bits move it by 0.3 °C
      Method (RTMP, 1, Serialized)
      {
        Local0 = TENC
        If (Local0 == 0) { Local0 = 420 }
        Return (Local0 + ((Timer >> 22) & 3))
      }
      Method (RFAN, 1, Serialized)
      {
        Local0 = RPM1
        If (Local0 == 0) { Local0 = 1351 }
        Return (Local0 - 1)
      }
    }
  }
}
