"""Which poles each net has, and in which states."""
