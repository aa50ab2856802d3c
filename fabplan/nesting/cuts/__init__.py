"""From placed blanks to straight cuts, and the shear program over the whole job."""
