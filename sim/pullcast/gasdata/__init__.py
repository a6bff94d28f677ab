"""Gas properties and burning of the fuels: what the solver is told about the working fluid.

>>> from pullcast.gasdata.tables import gas_table
>>> gas = gas_table("petrol", 0.88)
>>> [round(float(r), 1) for r in gas.R]
[287.0, 80.1, 294.1]

``fuels`` what each fuel is made of · ``tables`` the shipped tables, served · ``cantera_tables`` and ``build``
how they were made · ``burning`` flame speed and knock delay.
"""
