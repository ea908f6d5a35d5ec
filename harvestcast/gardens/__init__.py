"""What many gardens bring: the same verbs for thousands of folders, and trials over them.

The work is carried by Dask (extra ``scale``): in this process, in processes of this machine, or
on a cluster. What comes out does not depend on where and in which shares it was worked out.
"""
