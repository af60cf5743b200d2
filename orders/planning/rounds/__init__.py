"""The planner for workshops with kilns kept hot, or closed loads of unlike length."""
