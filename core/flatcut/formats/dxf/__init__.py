"""DXF files: exchange files written and read, and plain drawings of outlines read. One file here knows ezdxf."""
