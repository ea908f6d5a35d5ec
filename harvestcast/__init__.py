"""Forecast a kitchen garden's harvest and plan what to put up, week by week.

>>> import harvestcast as hc                                    # doctest: +SKIP
>>> garden = hc.open_garden("sample_logs")                      # doctest: +SKIP
>>> outlook = hc.forecast(garden, weeks=3)                      # doctest: +SKIP
>>> plan = hc.plan_week(outlook, garden)                        # doctest: +SKIP
"""
