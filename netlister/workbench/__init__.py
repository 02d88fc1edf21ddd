"""The page as a workbench: a layout changed in place, each change judged before it is written into the file."""
