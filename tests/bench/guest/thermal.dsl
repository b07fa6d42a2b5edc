// A thermal zone that shows what the host writes: a word of memory that the kernel is told to leave alone.
DefinitionBlock ("", "SSDT", 2, "BENCH", "THERM", 1)
{
  Scope (\_TZ)
  {
    OperationRegion (HOST, SystemMemory, 0x7FE00000, 0x100)
    Field (HOST, DWordAcc, NoLock, Preserve) { TENK, 32 }
    ThermalZone (THRM)
    {
      Name (_TZP, 10)
      Method (_TMP, 0, Serialized) { Local0 = TENK  If (Local0 == 0) { Local0 = 3032 }  Return (Local0) }
      Method (_CRT, 0) { Return (3732) }
    }
  }
}
