"""Writes the workbooks beside it: python make_workbooks.py, with xlwt 1.3, openpyxl 3.1 and odfpy 1.4 installed.

Row k (0 to 19) of sheet "run 1" has time k s, pressure 0.5 k bar, volume 0.1 k mL; "run 2" has pressure 10 + 0.25 k bar.
"""
import datetime
import os

import openpyxl
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl.utils.datetime import CALENDAR_MAC_1904

HERE = os.path.dirname(os.path.abspath(__file__))
START = datetime.datetime(2025, 3, 4, 23, 59, 50)
RUNS = {"run 1": lambda k: 0.5 * k, "run 2": lambda k: 10 + 0.25 * k}


def two_runs_xls():
    book = xlwt.Workbook()
    book.add_sheet("notes").write(0, 0, "bench of the north pier")
    for name, pressure in RUNS.items():
        sheet = book.add_sheet(name)
        sheet.write_merge(0, 0, 0, 2, "bench of the north pier")
        for at, title in enumerate(["Time [s]", "Pressure [bar]", "Volume [mL]"]):
            sheet.write(2, at, title)
        for k in range(20):
            sheet.write(3 + k, 0, float(k))
            # The eighth pressure is text with a decimal comma, as a keyboard types it.
            value = pressure(k)
            sheet.write(3 + k, 1, str(value).replace(".", ",") if k == 7 else value)
            sheet.write(3 + k, 2, 0.1 * k)
    book.save(os.path.join(HERE, "two_runs.xls"))


def tables_xls():
    book = xlwt.Workbook()
    tables = {
        "Runs": [["run_id", "kind", "frame_id", "trace"], ["hr01", "frame", "f1", "traces/day.csv#1"], ["hr02", "frame", "f1", "traces/day.csv#2"]],
        "Frames": [["frame_id", "label_size_mm", "true_id_mm"], ["f1", 21.0, "20,25"]],
    }
    for name, rows in tables.items():
        sheet = book.add_sheet(name)
        for row, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                sheet.write(row, column, cell)
    book.save(os.path.join(HERE, "tables.xls"))


def stamps_1904_xls():
    book = xlwt.Workbook()
    book.dates_1904 = 1
    sheet = book.add_sheet("run 1")
    for at, title in enumerate(["Time", "Pressure [bar]"]):
        sheet.write(0, at, title)
    style = xlwt.easyxf(num_format_str="yyyy-mm-dd hh:mm:ss")
    for k in range(20):
        sheet.write(1 + k, 0, START + datetime.timedelta(seconds=k), style)
        sheet.write(1 + k, 1, 0.5 * k)
    book.save(os.path.join(HERE, "stamps_1904.xls"))


def stamps_1904_xlsx():
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    sheet.title = "run 1"
    sheet.append(["clock", "inflator", None])
    sheet.merge_cells("B1:C1")
    sheet.append(["Time", "Pressure", "Volume"])
    sheet.append([None, "bar", "mL"])
    for k in range(20):
        sheet.append([START + datetime.timedelta(seconds=k), 0.5 * k, 0.1 * k])
        sheet.cell(sheet.max_row, 1).number_format = "yyyy-mm-dd hh:mm:ss"
    for row in (10, 11):
        sheet.row_dimensions[row].hidden = True
    spare = book.create_sheet("spare")
    for k in range(200):
        spare.append([k, k, k])
    spare.sheet_state = "hidden"
    book.save(os.path.join(HERE, "stamps_1904.xlsx"))


def elapsed_xlsx():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "run 1"
    sheet.append(["Elapsed", "Pressure [bar]"])
    for k in range(20):
        sheet.append([datetime.timedelta(hours=23, minutes=59, seconds=50 + k), 0.5 * k])
        sheet.cell(sheet.max_row, 1).number_format = "[h]:mm:ss"
    book.save(os.path.join(HERE, "elapsed.xlsx"))


def two_runs_ods():
    book = OpenDocumentSpreadsheet()
    for name, pressure in RUNS.items():
        table = Table(name=name)
        rows = [["Elapsed", "Pressure [bar]", "Volume [mL]"]]
        rows += [[f"PT00H00M{k:02d}.500S", pressure(k), 0.1 * k] for k in range(20)]
        for at, cells in enumerate(rows):
            row = TableRow()
            for column, cell in enumerate(cells):
                if at == 0:
                    made = TableCell(valuetype="string")
                    made.addElement(P(text=cell))
                elif column == 0:
                    made = TableCell(valuetype="time", timevalue=cell)
                else:
                    made = TableCell(valuetype="float", value=cell)
                row.addElement(made)
            table.addElement(row)
        book.spreadsheet.addElement(table)
    book.save(os.path.join(HERE, "two_runs.ods"))



def stray_cell_xlsx():
    book = openpyxl.Workbook()
    book.active["A1"] = 1
    book.active["XFD1048576"] = 1
    book.save(os.path.join(HERE, "stray_cell.xlsx"))


def repeated_ods():
    book = OpenDocumentSpreadsheet()
    table = Table(name="run 1")
    row = TableRow(numberrowsrepeated=16000)
    row.addElement(TableCell(valuetype="float", value=1, numbercolumnsrepeated=16000))
    table.addElement(row)
    book.spreadsheet.addElement(table)
    book.save(os.path.join(HERE, "repeated.ods"))


for make in (two_runs_xls, tables_xls, stamps_1904_xls, stamps_1904_xlsx, elapsed_xlsx, two_runs_ods, stray_cell_xlsx, repeated_ods):
    make()
