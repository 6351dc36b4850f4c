[Version] 2.0
# Hz Z MA
[Begin Information]
about it
