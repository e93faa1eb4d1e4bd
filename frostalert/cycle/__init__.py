"""One cycle and the records that it keeps."""
