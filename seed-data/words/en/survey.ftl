# Words of the survey.
