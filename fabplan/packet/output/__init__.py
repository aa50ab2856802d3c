"""The packet as files: HTML, folder, drawings, all or nothing."""
