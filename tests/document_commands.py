"""Runs the commands of README.md and docs/ in empty folders: `document_commands.py SOURCE WORK`, `halfturn` on the path.

A document gets a folder of its own, with what its reader has: `assets/` and `examples/`, and, but for README.md, which makes its own, the files that `halfturn
init` writes. Commands are the lines that begin with `halfturn` or `cargo run --release --` in blocks of code.
"""
# Shows (README): the commands on the page work in an empty folder. Source: none: own rule.

import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys

# Commands that need what a reader brings.
LEFT_OUT = {
    "halfturn judge --rig my-rig/rig.toml -- ./my-controller --simulated": "a controller of the reader",
    "halfturn sky fits night/ --log log.csv --reading-key ROTANGLE": "the reader's frames",
}
FEWEST = 20


def commands(text):
    """The commands of a document, in their order."""
    fenced = False
    for line in text.splitlines():
        if line.startswith("```"):
            fenced = line == "```sh"
        elif fenced or line.startswith("    "):
            line = re.sub(r"\s+#.*", "", line.strip())
            line = line.replace("cargo run --release -- ", "halfturn ", 1)
            if line.startswith("halfturn ") and "$" not in line:
                yield line


def run(line, folder):
    """Runs a command; a server is stopped when it has come up. Returns what is wrong."""
    if line.startswith("halfturn serve"):
        line = line.replace(" --open", "")
        server = subprocess.Popen(line, shell=True, cwd=folder, stdout=subprocess.PIPE, text=True, start_new_session=True)
        first = server.stdout.readline()
        os.killpg(server.pid, signal.SIGINT)
        server.communicate(timeout=20)
        return None if "http://" in first else f"it says {first!r}"
    done = subprocess.run(line, shell=True, cwd=folder, capture_output=True, text=True, timeout=900, check=False)
    # 1 is an answer: not every target is safe, a controller failed.
    allowed = (0, 1) if line.split()[1] in ("advise", "judge", "sky") else (0,)
    return None if done.returncode in allowed else f"exit code {done.returncode}: {done.stderr[-500:]}"


def main():
    source, work = map(pathlib.Path, sys.argv[1:])
    documents = [source / "README.md", *sorted((source / "docs").glob("*.md"))]
    count, wrong = 0, []
    for document in documents:
        lines = list(commands(document.read_text(encoding="utf-8")))
        if not lines:
            continue
        folder = work / document.stem
        folder.mkdir(parents=True)
        for name in ("assets", "examples"):
            shutil.copytree(source / name, folder / name)
        if document.name != "README.md":
            for place in (".", "my-rig"):
                subprocess.run(["halfturn", "init", place], cwd=folder, check=True, capture_output=True)
            shutil.copy(source / "assets/demo-log.csv", folder / "log.csv")
        for line in lines:
            if line in LEFT_OUT:
                print(f"{document.name}: left out, {LEFT_OUT[line]}: {line}")
                continue
            problem = run(line, folder)
            count += 1
            print(f"{document.name}: {'ok' if problem is None else 'FAILED'}: {line}", flush=True)
            if problem is not None:
                wrong.append(f"{document.name}: {line}: {problem}")
    if count < FEWEST:
        wrong.append(f"only {count} commands were found")
    print(f"{count} commands")
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
