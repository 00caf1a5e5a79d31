from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0015_closing_ticks'),
    ]

    operations = [
        migrations.AddField(
            model_name='job',
            name='waste_pct',
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='lead_days',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='tins_l',
            field=models.JSONField(blank=True, default=list),
        ),
    ]
