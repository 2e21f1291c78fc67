"""What has been learned, written as the description of a device and held against the capture."""
