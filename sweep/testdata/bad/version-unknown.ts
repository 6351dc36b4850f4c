[Version] 3.0
# Hz Z MA
