"""How sure a comparison is: all candidates in many engines that the file's may be, and what that says."""
