//! Circuit chart, drilling template, order list: PDF, DXF, SVG, XLSX, CSV.
