"""The grammar of part texts: sizes, speeds, kits, model names. Pure; knows no orders and no machines."""
