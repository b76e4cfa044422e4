"""Drawings at full size: each described once, and written from that as SVG, as DXF and as pages of paper."""
