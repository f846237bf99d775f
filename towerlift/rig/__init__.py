"""The rigging of each lift put together, and the loads it takes along the travel."""
