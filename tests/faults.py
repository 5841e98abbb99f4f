"""Puts the deliberate faults of tests/faults.toml into a copy of the source, and says which test catches each: `faults.py [--only N,M] [--keep FOLDER]`.

All faults stand in one build, each behind a switch that is read at run time: `HALFTURN_FAULT=<number>` turns one on, in the tests and in the programs
that they start. A fault is caught where a test fails that passes without it. Prints a table in Markdown; exit code 1 if a fault was not caught.
"""

import argparse
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib

ROOT = pathlib.Path(__file__).resolve().parent.parent
CRATES = ["src/lib.rs", *(f"crates/{name}/src/lib.rs" for name in ("engine", "sky", "report"))]
SWITCH = """
#[doc(hidden)]
#[allow(missing_docs)]
#[inline]
pub fn fault(number: u32) -> bool {
    static ON: std::sync::OnceLock<u32> = std::sync::OnceLock::new();
    let read = || std::env::var("HALFTURN_FAULT").ok()?.parse().ok();
    *ON.get_or_init(|| read().unwrap_or(0)) == number
}
"""
# A test that a fault keeps from ending has caught it.
LONGEST_S = 900
SHOWN = 3


def switched(number, old, new):
    """`old`, and in its place `new` while the fault is on."""
    on = f"crate::fault({number})"
    if "FAULT" in new:
        return new.replace("FAULT", on)
    both = f"if {on} {{ {new} }} else {{ {old} }}"
    return both if old.endswith(";") else f"({both})"


def copy_with(faults, folder):
    """Copies the source and puts the faults in. A file that is as it was stays untouched, so that it is not compiled again."""
    names = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout.decode()
    texts = {name: (ROOT / name).read_bytes() for name in names.split("\0") if name and (ROOT / name).is_file()}
    missing = []
    for number, fault in enumerate(faults, 1):
        text, old = texts[fault["file"]].decode(), fault["old"]
        if text.count(old) != 1:
            missing.append(f"MISSING {number} {fault['name']}: {text.count(old)} times in {fault['file']}: {old}")
            continue
        texts[fault["file"]] = text.replace(old, switched(number, old, fault["new"])).encode()
    for name in CRATES:
        texts[name] += SWITCH.encode()
    for name, bytes_ in texts.items():
        path = folder / name
        if not path.exists() or path.read_bytes() != bytes_:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(bytes_)
        path.chmod((ROOT / name).stat().st_mode)
    return missing


def built(folder):
    """The binaries of tests by name, each with the folder that it runs in."""
    command = ["cargo", "test", "--no-run", "--locked", "--message-format=json-render-diagnostics"]
    out = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    if out.returncode:
        sys.exit(out.stderr[-8000:] + "the copy with the faults is not built")
    binaries = {}
    for line in out.stdout.splitlines():
        found = json.loads(line)
        # The library and the program have one name; all tests are in the library.
        if found.get("executable") and found["profile"]["test"] and found["target"]["kind"] != ["bin"]:
            package = str(pathlib.Path(found["manifest_path"]).parent)
            binaries[found["target"]["name"]] = (found["executable"], package)
    return binaries


def failures(binary, filters, number, exact=False):
    """The tests that fail with one fault, or with none (0); `None` where they do not end."""
    path, package = binary
    env = {**os.environ, "HALFTURN_FAULT": str(number), "CARGO_MANIFEST_DIR": package, "RUST_BACKTRACE": "0"}
    command = [path, *filters, *(["--exact"] if exact else [])]
    run = subprocess.Popen(
        command, cwd=package, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
    )
    try:
        out = run.communicate(timeout=LONGEST_S)[0].decode(errors="replace")
    except subprocess.TimeoutExpired:
        os.killpg(run.pid, signal.SIGKILL)
        run.communicate()
        return None
    failed = re.findall(r"^test (\S+)(?: - should panic)? \.\.\. FAILED", out, re.M)
    if run.returncode not in (0, 101) or (run.returncode and not failed):
        failed.append("(the process ends)")
    return failed


def caught(fault, number, binaries):
    """The first tests that fail with a fault and pass without it, and whether they are those that the list names."""
    name, *filters = fault["first"].split()
    others = [(other, []) for other in sorted(binaries)]
    for place, (binary, words) in enumerate([(name, filters), *others]):
        failed = failures(binaries[binary], words, number)
        if failed is None:
            return [f"{binary}: does not end"], place == 0
        if failed:
            named = [test for test in failed if not test.startswith("(")][:20]
            without = failures(binaries[binary], named, 0, exact=True) if named else []
            failed = [test for test in failed if test not in without]
        if failed:
            return [f"{binary} {test}" for test in failed[:SHOWN]], place == 0
    return [], False


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--only", help="numbers of faults, such as 3,17")
    words.add_argument("--keep", type=pathlib.Path, help="the folder of the copy; it is built again faster")
    args = words.parse_args()
    faults = tomllib.loads((ROOT / "tests/faults.toml").read_text())["fault"]
    wanted = [int(n) for n in args.only.split(",")] if args.only else range(1, len(faults) + 1)
    folder = args.keep or pathlib.Path(tempfile.mkdtemp(prefix="halfturn-faults-"))
    begun = time.monotonic()
    try:
        missing = copy_with(faults, folder)
        print("\n".join(missing), file=sys.stderr, end="\n" if missing else "")
        binaries = built(folder)
        built_s = time.monotonic() - begun
        print("| | fault | file | caught by |\n|---|---|---|---|")
        counts = {"first": 0, "later": 0, "not": 0}
        for number in wanted:
            fault = faults[number - 1]
            tests, first = caught(fault, number, binaries)
            counts["not" if not tests else "first" if first else "later"] += 1
            said = ", ".join(f"`{test}`" for test in tests) or "**not caught**"
            print(f"| {number} | {fault['name']} | `{fault['file']}` | {said} |", flush=True)
    finally:
        if not args.keep:
            shutil.rmtree(folder, ignore_errors=True)
    took_s = time.monotonic() - begun
    print(
        f"\n{len(wanted)} faults, {counts['first'] + counts['later']} caught, {counts['first']} of them by the tests that were tried first; "
        f"{counts['not']} not caught, {len(missing)} missing. {built_s:.0f} s to build, {took_s:.0f} s in all."
    )
    return 1 if counts["not"] or missing else 0


if __name__ == "__main__":
    sys.exit(main())
