"""Compares a workbook with the JSON beside it cell by cell, with a reader that is not ours.

    python3 benches/workbook-equals-json.py data.xlsx data.json      (needs openpyxl)
"""
import json
import sys

import openpyxl

book = openpyxl.load_workbook(sys.argv[1])
document = json.load(open(sys.argv[2], encoding="utf-8"))
tables = {name: rows for name, rows in document.items() if isinstance(rows, list)}
assert book.sheetnames == list(tables), (book.sheetnames, list(tables))
compared = 0
for name, rows in tables.items():
    sheet = list(book[name].iter_rows())
    assert len(sheet) == len(rows) + 1, name
    heading = [cell.value for cell in sheet[0]]
    for cells, row in zip(sheet[1:], rows):
        assert list(row) == heading, name
        for cell, wanted in zip(cells, row.values()):
            compared += 1
            assert cell.data_type != "f", (name, cell.coordinate, cell.value)
            assert cell.value == wanted, (name, cell.coordinate, cell.value, wanted)
print(f"{compared} cells alike, no formula")
