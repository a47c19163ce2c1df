# Words of the plate.
