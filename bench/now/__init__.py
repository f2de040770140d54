"""The wait now at many sites: what an update costs and whether its intervals hold what was true."""
