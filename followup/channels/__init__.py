"""Ways a message leaves and a reply arrives."""
