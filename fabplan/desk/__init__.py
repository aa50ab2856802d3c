"""The desk: one page in the browser of this machine that edits a job file, draws as it is typed, and plans."""
