"""What people see: packets, drawings, charts, the web app, exports."""
