"""The whole plan of a job: runs the stages in order, checks each result, and says it as data."""
