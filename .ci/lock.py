"""Write requirements.lock from what pip would install in an empty environment.

Standard input is pip's installation report; standard output is one pin a line. Only
names and versions are kept: where a file came from is the business of the machine that
installs it. There are no hashes, so that one lock serves every kind of processor.
"""

import json
import re
import sys

OWN_NAME = "towerlift"
HEADER = """\
# Every package, at the version that is run and tested. Written by `make lock`; to change
# it, change pyproject.toml and environment.yml, then run that again.
"""


def main() -> None:
    installs = json.load(sys.stdin)["install"]
    pins = {
        re.sub(r"[-_.]+", "-", item["metadata"]["name"]).lower(): item["metadata"]["version"]
        for item in installs
    }
    pins.pop(OWN_NAME)
    sys.stdout.write(HEADER)
    for name, version in sorted(pins.items()):
        sys.stdout.write(f"{name}=={version}\n")


if __name__ == "__main__":
    main()
