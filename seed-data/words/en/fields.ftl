# Words of the fields.
