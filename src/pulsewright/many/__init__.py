"""Many designs of one sheet: the plan, its computation on threads or a cluster, and what is kept of it."""
