"""Weather from elsewhere: one adapter a service, one shape out of all of them."""
