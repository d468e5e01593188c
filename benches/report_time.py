"""Time and memory of the report. report_time.py PROGRAM SURVEY"""

import resource
import subprocess
import sys
import tempfile
import time

program, survey = sys.argv[1:]
for name, flags in (("with cards", []), ("without cards", ["--chapters", "agreement,lengths,growth,years,year-classes"])):
    with tempfile.TemporaryDirectory() as folder:
        times = []
        for run in range(3):
            start = time.perf_counter()
            command = [program, "report", survey, "--out", f"{folder}/{run}", *flags]
            subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
            times.append(time.perf_counter() - start)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"report {name:14} {min(times):6.2f} s, peak memory so far {peak:4.0f} MB")
