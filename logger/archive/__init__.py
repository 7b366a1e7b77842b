"""One job as an archive of its own: a BagIt bag (RFC 8493), made from a library and taken into one.

README.md beside this states how a bag is laid out.
"""
