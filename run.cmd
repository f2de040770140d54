@echo off
rem Thin caller: everything is in run.py.
py -3 "%~dp0run.py" %*
