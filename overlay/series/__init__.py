"""The series: many trials and clips by one command, over night if need be.

On the road through this room: `document` is what is asked for, `inputs` hashes what goes into it,
`plan` makes the jobs, `work` does one of them in a process of its own, `local` runs them on this
machine, `folder` is where all of it lies, and `outcome` and `state` are what is told of it.
"""
