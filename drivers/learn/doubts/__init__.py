"""What speaks against a reading: rivals, refused packets, typed loads; and which further load would tell."""
