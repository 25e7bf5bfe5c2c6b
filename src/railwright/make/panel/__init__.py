"""The panel: what stands where on it, and its template as lines that several formats share."""
