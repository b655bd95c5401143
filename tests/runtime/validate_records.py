#!/usr/bin/env python3
"""Says of each record (a line of standard input) whether a JSON Schema accepts it: 1 or 0 a line.

usage: validate_records.py SCHEMA < RECORDS
"""
import json
import sys

from jsonschema import Draft202012Validator

with open(sys.argv[1], encoding="utf-8") as file:
    schema = json.load(file)
Draft202012Validator.check_schema(schema)
validator = Draft202012Validator(schema)
for line in sys.stdin:
    print(int(validator.is_valid(json.loads(line))))
