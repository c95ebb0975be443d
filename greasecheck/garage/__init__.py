"""Services of the garage: join logbook, measuring, forecast and page, without a terminal.

Empty on purpose: its modules load scipy or OpenCV, and start-up stays light.
"""
