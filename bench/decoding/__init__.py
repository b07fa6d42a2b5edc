"""What `bench/decode.py` measures: a module for each set of reference data, each with `measure(folder)`."""
