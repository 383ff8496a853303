"""The figures of a page as files: SVG and PNG of their own, in the size that is asked for."""
