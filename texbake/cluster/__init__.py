"""Jobs on other machines, by an existing Dask scheduler; Dask is only loaded when asked for."""

from texbake.cluster.run import run_on_cluster

__all__ = ["run_on_cluster"]
