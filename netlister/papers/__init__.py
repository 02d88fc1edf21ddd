"""Papers for the workbench: what someone takes under the baseboard. All are made from the runs of the layout."""
