"""What is cut and where: materials, sections, sheets, bars, remnants, machines and cutting rules."""
