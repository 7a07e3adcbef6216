"""Reading part drawings, laying parts on sheets and bars, checking the result and writing it out.

A plain Python library in millimetres, degrees and seconds. It knows nothing of the web: the server enters it through
`nesting.route`, and so does the command line.
"""
