"""Results for people and machines: records, tables, pictures and one HTML page.

There is no arithmetic here beyond rounding and the change to units that people use.
"""
