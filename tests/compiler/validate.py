"""validate.py SCHEMA: exits 0 where the JSON on standard input keeps the JSON Schema, else says where it does not."""
import json
import sys

import jsonschema

with open(sys.argv[1], encoding="utf-8") as file:
    schema = json.load(file)
validator = jsonschema.validators.validator_for(schema)(schema)
faults = list(validator.iter_errors(json.load(sys.stdin)))
for fault in faults[:10]:
    print("/".join(str(part) for part in fault.absolute_path), fault.message[:300])
sys.exit(1 if faults else 0)
