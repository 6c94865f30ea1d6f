"""Only parses every record below a folder with Python's own json, line by line:
the peer that `halve class` is timed against. It estimates nothing.

    python3 testdata/peers/class_parse.py DIR
"""
import json
import os
import sys

records = lines = 0
for folder, _, names in os.walk(sys.argv[1]):
    for name in names:
        with open(os.path.join(folder, name), encoding="utf-8") as f:
            for line in f:
                json.loads(line)
                lines += 1
        records += 1
print(records, "records,", lines, "lines")
