"""What the garage knows: joins the logbook with measuring, forecast and page, without a terminal.

Empty on purpose: its modules load scipy or OpenCV, and start-up stays light.
"""
