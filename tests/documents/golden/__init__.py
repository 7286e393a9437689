"""The golden document: what is rendered from a small real workshop's folder, kept and compared byte for byte."""
