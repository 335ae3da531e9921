"""Records coordinated video timings of a reference decoder, for the outside checks.

Run:  EDID_DECODE=edid-decode python make/modes.py > recorded/modes.csv
(edid-decode of the Debian package 0.1~git20220315.cb74358c2896-1)
"""
import os
import re
import subprocess

tool = os.environ.get("EDID_DECODE", "edid-decode")
version = subprocess.run([tool, "--version"], capture_output=True, text=True).stdout.splitlines()[0]
print(f"# {version}; command: python make/modes.py > recorded/modes.csv")
print("w,h,fps,rb,pclk_mhz,htotal,vtotal")
sizes = [(640, 480), (800, 600), (1024, 768), (1280, 720), (1280, 768), (1280, 800), (1280, 1024), (1366, 768), (1440, 900), (1600, 900), (1600, 1200),
         (1680, 1050), (1920, 1080), (1920, 1200), (2048, 1152), (2048, 1536), (2560, 1080), (2560, 1440), (2560, 1600), (3440, 1440), (3840, 1600), (3840, 2160), (5120, 2880), (7680, 4320)]
for w, h in sizes:
    for fps in (24, 50, 60, 75, 85, 120, 165):
        for rb in (0, 1, 2):
            out = subprocess.run([tool, "--cvt", f"w={w},h={h},fps={fps},rb={rb}"], capture_output=True, text=True).stdout
            clock = re.search(r"([\d.]+) MHz", out)
            across = re.search(r"Hfront\s+(-?\d+) Hsync\s+(-?\d+) Hback\s+(-?\d+)", out)
            down = re.search(r"Vfront\s+(-?\d+) Vsync\s+(-?\d+) Vback\s+(-?\d+)", out)
            shown = re.search(r"CVT:\s+(\d+)x(\d+)", out)
            if not (clock and across and down and shown):
                continue
            width, height = (int(n) for n in shown.groups())
            print(f"{w},{h},{fps},{rb},{float(clock[1]):.3f},{width + sum(map(int, across.groups()))},{height + sum(map(int, down.groups()))}")
