"""Pure renderers: a comparison or a circuit in, text or a picture out. No clock, no files."""
