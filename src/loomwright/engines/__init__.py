"""How to calculate, without any idea of the subject: routes, orders, trees, node equations."""
