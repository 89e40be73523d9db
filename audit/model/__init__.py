"""What the rooms share: the table's columns, the kit, the rig and the finding."""
