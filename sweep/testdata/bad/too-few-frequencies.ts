[Version] 2.0
# Hz Z MA
[Number of Ports] 1
[Number of Frequencies] 3
[Network Data]
20 6 1
30 6 1
[End]
